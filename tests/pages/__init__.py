"""Pages in a real browser, with the network blocked."""
