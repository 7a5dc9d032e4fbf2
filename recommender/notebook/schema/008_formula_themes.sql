-- What a version of a formula states to be about; a version without a row states nothing.
CREATE TABLE formula_themes (
  version INTEGER NOT NULL REFERENCES formula_versions (id) ON DELETE CASCADE,
  place INTEGER NOT NULL CHECK (place >= 1),
  facet TEXT NOT NULL CHECK (facet <> ''),
  PRIMARY KEY (version, place)
);
