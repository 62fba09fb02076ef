"""The physics of the spring work: numpy only, knows nothing of shops, job cards or the web (save for `calc.web`)."""
