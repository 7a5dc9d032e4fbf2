"""What runs beside the page: the server, who may ask, the session over a notebook, long jobs."""
