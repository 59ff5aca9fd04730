"""How is it run? Tables, pages, and the command line."""
