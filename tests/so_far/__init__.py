"""What was known with each wear."""
