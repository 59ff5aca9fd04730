"""How was it? Days, meals, excursions, feelings, whole wears."""
