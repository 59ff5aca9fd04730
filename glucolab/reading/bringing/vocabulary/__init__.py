"""What do people call it? Words of many languages, and how they are matched to our own."""
