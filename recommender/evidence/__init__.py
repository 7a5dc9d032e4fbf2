"""The evidence: tables read from files, looked up by name or CAS number, under a person's own overlay."""
