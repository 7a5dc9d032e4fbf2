-- What was done to bottles in one go, so that it can be undone: weighed from, imported, changed by hand.
CREATE TABLE shelf_changes (
  id INTEGER PRIMARY KEY,
  made TEXT NOT NULL,                    -- yyyy-mm-ddThh:mm:ss, UTC
  kind TEXT NOT NULL CHECK (kind IN ('weighed', 'imported', 'changed')),
  name TEXT NOT NULL,                    -- of the formula, the file or the bottle
  batch_g REAL CHECK (batch_g > 0)       -- of what was weighed
);

CREATE TABLE shelf_change_bottles (
  shelf_change INTEGER NOT NULL REFERENCES shelf_changes (id) ON DELETE CASCADE,
  bottle INTEGER NOT NULL,               -- its number
  before TEXT NOT NULL DEFAULT '{}',     -- JSON: its row, column -> value; empty where it was not there
  after TEXT NOT NULL,                   -- JSON: the same, changed
  PRIMARY KEY (shelf_change, bottle)
);
