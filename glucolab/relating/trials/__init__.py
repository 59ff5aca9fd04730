"""What did a planned experiment show? Its dates, its arms compared, and what carried over."""
