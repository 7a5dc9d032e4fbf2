-- What was removed, with all its rows, so that it can be brought back.
CREATE TABLE removed (
  id INTEGER PRIMARY KEY,
  removed TEXT NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%S', 'now')),  -- UTC
  kind TEXT NOT NULL,                    -- bottle, trial, note and the like
  key TEXT NOT NULL,                     -- id or slug of its first row
  name TEXT NOT NULL,                    -- as it is called
  content TEXT NOT NULL                  -- JSON: table -> rows, each column -> value
);

CREATE INDEX removed_by_key ON removed (kind, key);
