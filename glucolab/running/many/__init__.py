"""How are many studies run? One process each, their tables together, what is finished kept."""
