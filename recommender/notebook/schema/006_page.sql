-- Formulas as they lie on the page: lines as typed, finished or not, with the steps back.
CREATE TABLE drafts (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL CHECK (name <> ''),
  key TEXT NOT NULL UNIQUE,              -- the name as names are compared
  version INTEGER NOT NULL DEFAULT 1,    -- goes up with every change, steps back too
  step INTEGER NOT NULL DEFAULT 0,       -- which of its steps is shown
  touched TEXT NOT NULL,                 -- yyyy-mm-ddThh:mm:ss.ffffff, UTC
  fields TEXT NOT NULL DEFAULT '{}'      -- JSON: dosage, category, batch and the like, as typed
);

CREATE TABLE draft_steps (
  draft INTEGER NOT NULL REFERENCES drafts (id) ON DELETE CASCADE,
  step INTEGER NOT NULL CHECK (step >= 0),
  told TEXT NOT NULL DEFAULT '',         -- what was changed, in words
  mark TEXT NOT NULL DEFAULT '',         -- changes of one mark, made in one go, are one step
  lines TEXT NOT NULL,                   -- JSON: one object a line, every cell a text
  PRIMARY KEY (draft, step)
);
