-- Tables of limits that the person typed from the Standards in force; older ones stay.
CREATE TABLE limit_tables (
  id INTEGER PRIMARY KEY,
  read TEXT NOT NULL,                    -- yyyy-mm-ddThh:mm:ss, UTC
  file TEXT NOT NULL,
  in_use INTEGER NOT NULL DEFAULT 1 CHECK (in_use IN (0, 1))
);

CREATE TABLE limits (
  limit_table INTEGER NOT NULL REFERENCES limit_tables (id) ON DELETE CASCADE,
  place INTEGER NOT NULL CHECK (place >= 1),
  name TEXT NOT NULL CHECK (name <> ''),
  cas TEXT NOT NULL DEFAULT '',          -- parted by semicolons
  kind TEXT NOT NULL CHECK (kind IN ('prohibition', 'restriction', 'specification')),
  market TEXT NOT NULL CHECK (market IN ('standards', 'eu')),
  counted_with TEXT NOT NULL DEFAULT '',
  sum_group TEXT NOT NULL DEFAULT '',
  reference TEXT NOT NULL DEFAULT '',
  date TEXT NOT NULL DEFAULT '',
  excepted TEXT NOT NULL DEFAULT '',
  note TEXT NOT NULL DEFAULT '',
  PRIMARY KEY (limit_table, place)
);

CREATE TABLE limit_percents (
  limit_table INTEGER NOT NULL,
  place INTEGER NOT NULL,
  category TEXT NOT NULL,
  percent REAL NOT NULL CHECK (percent > 0 AND percent <= 100),  -- in the finished product
  PRIMARY KEY (limit_table, place, category),
  FOREIGN KEY (limit_table, place) REFERENCES limits (limit_table, place) ON DELETE CASCADE
);
