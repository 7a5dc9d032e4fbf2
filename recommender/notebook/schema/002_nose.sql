-- Materials that the person adds, with what was estimated when they were added.
CREATE TABLE materials (
  slug TEXT PRIMARY KEY NOT NULL,
  name TEXT NOT NULL CHECK (name <> ''),
  cas TEXT NOT NULL DEFAULT '',
  kind TEXT NOT NULL DEFAULT 'molecule',
  form TEXT NOT NULL DEFAULT 'liquid',
  smiles TEXT NOT NULL DEFAULT '',
  molar_mass REAL,                       -- g/mol
  pressure_pa REAL CHECK (pressure_pa > 0),
  pressure_basis TEXT NOT NULL DEFAULT '',
  pressure_source TEXT NOT NULL DEFAULT '',
  log_error REAL,                        -- of the pressure, decades
  strength TEXT NOT NULL DEFAULT '',     -- a class of odour strength
  strength_basis TEXT NOT NULL DEFAULT '',
  note TEXT NOT NULL DEFAULT ''
);

CREATE TABLE material_labels (
  material TEXT NOT NULL REFERENCES materials (slug) ON DELETE CASCADE,
  facet TEXT NOT NULL,
  strength INTEGER NOT NULL CHECK (strength BETWEEN 1 AND 3),
  PRIMARY KEY (material, facet)
);

-- The person's own nose: what a material smells of to them.
CREATE TABLE notes (
  material TEXT PRIMARY KEY NOT NULL,
  adds INTEGER NOT NULL DEFAULT 0 CHECK (adds IN (0, 1)),    -- 1: to the table's labels, 0: in their place
  strength TEXT NOT NULL DEFAULT '',     -- stronger, weaker, much stronger, much weaker, or blank
  blind INTEGER NOT NULL DEFAULT 0 CHECK (blind IN (0, 1)),  -- 1: cannot be smelled by this person
  words TEXT NOT NULL DEFAULT ''
);

CREATE TABLE note_labels (
  material TEXT NOT NULL REFERENCES notes (material) ON DELETE CASCADE,
  facet TEXT NOT NULL,
  strength INTEGER NOT NULL CHECK (strength BETWEEN 0 AND 3),  -- 0: does not smell of it
  PRIMARY KEY (material, facet)
);
