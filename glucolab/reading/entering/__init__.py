"""What is typed by hand? One row at a time, judged as its whole table is, every other byte of which stays."""
