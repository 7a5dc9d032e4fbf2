-- Named formulas; every version that was ever saved stays.
CREATE TABLE formulas (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL CHECK (name <> ''),
  key TEXT NOT NULL UNIQUE               -- the name as names are compared
);

CREATE TABLE formula_versions (
  id INTEGER PRIMARY KEY,
  formula INTEGER NOT NULL REFERENCES formulas (id) ON DELETE CASCADE,
  number INTEGER NOT NULL CHECK (number >= 1),
  saved TEXT NOT NULL,                   -- yyyy-mm-ddThh:mm:ss, UTC
  note TEXT NOT NULL DEFAULT '',
  UNIQUE (formula, number)
);

CREATE TABLE formula_lines (
  version INTEGER NOT NULL REFERENCES formula_versions (id) ON DELETE CASCADE,
  place INTEGER NOT NULL CHECK (place >= 1),
  material TEXT NOT NULL DEFAULT '',     -- key of the material, blank where the line is an accord
  accord INTEGER REFERENCES formula_versions (id),
  parts REAL NOT NULL CHECK (parts > 0),
  dilution_percent REAL NOT NULL DEFAULT 100 CHECK (dilution_percent > 0 AND dilution_percent <= 100),
  solvent TEXT NOT NULL DEFAULT '',
  note TEXT NOT NULL DEFAULT '',
  PRIMARY KEY (version, place),
  CHECK ((material = '') <> (accord IS NULL))
);
