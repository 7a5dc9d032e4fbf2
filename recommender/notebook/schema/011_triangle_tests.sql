-- A trial that is a triangle test of its version against another, and which strip was chosen as the odd one.
CREATE TABLE trial_triangles (
  trial INTEGER PRIMARY KEY REFERENCES trials (id) ON DELETE CASCADE,
  against INTEGER NOT NULL REFERENCES formula_versions (id) ON DELETE CASCADE
);

CREATE TABLE trial_triangle_answers (
  trial INTEGER NOT NULL REFERENCES trials (id) ON DELETE CASCADE,
  place INTEGER NOT NULL CHECK (place >= 1),
  hours REAL NOT NULL CHECK (hours >= 0),
  first INTEGER NOT NULL,                -- numbers of the strips, in the order of smelling
  second INTEGER NOT NULL,
  third INTEGER NOT NULL,
  odd INTEGER NOT NULL CHECK (odd IN (first, second, third)),
  chosen INTEGER NOT NULL CHECK (chosen IN (first, second, third)),
  words TEXT NOT NULL DEFAULT '',
  PRIMARY KEY (trial, place)
);
