"""What was observed? One wear's tables, days and meals over all wears, glucose after each eating."""
