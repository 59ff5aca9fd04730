"""Running: tables, folders, pages, and the command line."""
