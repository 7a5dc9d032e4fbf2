-- What a person's own words on a bottle stand for, resolved once and remembered.
-- A blank text is "unknown" in every table, a missing number is NULL.
CREATE TABLE labels (
  key TEXT PRIMARY KEY NOT NULL,         -- the label as labels are compared
  label TEXT NOT NULL,                   -- as it was written
  material TEXT NOT NULL                 -- key of the material
);

CREATE TABLE bottles (
  id INTEGER PRIMARY KEY,
  label TEXT NOT NULL CHECK (label <> ''),
  key TEXT NOT NULL,                     -- the label as labels are compared
  material TEXT NOT NULL DEFAULT '',     -- key of the material, blank until it is resolved
  dilution_percent REAL NOT NULL DEFAULT 100 CHECK (dilution_percent > 0 AND dilution_percent <= 100),
  solvent TEXT NOT NULL DEFAULT '',
  amount_g REAL CHECK (amount_g >= 0),
  price_per_g REAL CHECK (price_per_g >= 0),
  opened TEXT NOT NULL DEFAULT '',       -- yyyy-mm-dd
  lot TEXT NOT NULL DEFAULT '',
  note TEXT NOT NULL DEFAULT ''
);

CREATE INDEX bottles_by_material ON bottles (material);
CREATE INDEX bottles_by_key ON bottles (key);
