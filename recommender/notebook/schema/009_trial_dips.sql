-- When the strip of a trial was dipped, so that an hour can be read off the clock.
CREATE TABLE trial_dips (
  trial INTEGER PRIMARY KEY REFERENCES trials (id) ON DELETE CASCADE,
  dipped TEXT NOT NULL  -- yyyy-mm-ddThh:mm, UTC
);
