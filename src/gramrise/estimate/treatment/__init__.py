"""One treatment: the likelihood of its factor, its forecast, and the posterior over candidates."""
