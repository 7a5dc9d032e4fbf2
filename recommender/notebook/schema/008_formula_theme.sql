-- What a version of a formula states to be about: facets, comma between; blank where it states nothing.
ALTER TABLE formula_versions ADD COLUMN theme TEXT NOT NULL DEFAULT '';
