-- How trials of a formula smelled, strips of single materials, and what was fitted to these.
CREATE TABLE trials (
  id INTEGER PRIMARY KEY,
  version INTEGER NOT NULL REFERENCES formula_versions (id) ON DELETE CASCADE,
  day TEXT NOT NULL DEFAULT '',          -- yyyy-mm-dd
  batch_g REAL CHECK (batch_g > 0),
  room_c REAL,                           -- C
  verdict TEXT NOT NULL DEFAULT ''
);

CREATE INDEX trials_by_version ON trials (version);

CREATE TABLE trial_readings (
  trial INTEGER NOT NULL REFERENCES trials (id) ON DELETE CASCADE,
  place INTEGER NOT NULL CHECK (place >= 1),
  hours REAL NOT NULL CHECK (hours >= 0),
  facet TEXT NOT NULL DEFAULT '',        -- blank: the whole smell
  said TEXT NOT NULL CHECK (said IN ('gone', 'trace', 'clear', 'strong', 'too strong')),
  level REAL CHECK (level >= 0 AND level <= 100),  -- where a number was put to it
  words TEXT NOT NULL DEFAULT '',
  PRIMARY KEY (trial, place)
);

CREATE TABLE strips (
  id INTEGER PRIMARY KEY,
  material TEXT NOT NULL CHECK (material <> ''),   -- key of the material
  day TEXT NOT NULL DEFAULT '',
  dilution_percent REAL NOT NULL DEFAULT 100 CHECK (dilution_percent > 0 AND dilution_percent <= 100),
  solvent TEXT NOT NULL DEFAULT '',
  room_c REAL NOT NULL DEFAULT 25
);

CREATE TABLE strip_readings (
  strip INTEGER NOT NULL REFERENCES strips (id) ON DELETE CASCADE,
  place INTEGER NOT NULL CHECK (place >= 1),
  hours REAL NOT NULL CHECK (hours >= 0),
  said TEXT NOT NULL CHECK (said IN ('gone', 'trace', 'clear', 'strong', 'too strong')),
  level REAL CHECK (level >= 0 AND level <= 100),
  words TEXT NOT NULL DEFAULT '',
  PRIMARY KEY (strip, place)
);

-- What was fitted; the last one counts.
CREATE TABLE calibrations (
  id INTEGER PRIMARY KEY,
  made TEXT NOT NULL,                    -- yyyy-mm-ddThh:mm:ss, UTC
  film_m REAL NOT NULL CHECK (film_m > 0),
  nose_l_per_s REAL NOT NULL CHECK (nose_l_per_s > 0),
  paper_share REAL NOT NULL CHECK (paper_share > 0),
  room_c REAL NOT NULL
);

CREATE TABLE calibration_materials (
  calibration INTEGER NOT NULL REFERENCES calibrations (id) ON DELETE CASCADE,
  material TEXT NOT NULL,
  faster REAL NOT NULL CHECK (faster > 0),
  stronger REAL NOT NULL CHECK (stronger > 0),
  hours REAL,                            -- no longer clear, as read
  table_hours REAL,                      -- the same by the table
  PRIMARY KEY (calibration, material)
);
