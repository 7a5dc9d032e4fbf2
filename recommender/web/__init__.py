"""One page to work on, in a browser on this machine; loaded by `recommender serve` alone."""
