"""What moves it? Questions, their regressions, dishes, energy, shares of the variance."""
