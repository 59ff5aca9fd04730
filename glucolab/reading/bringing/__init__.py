"""How does anyone's table come in? A grid of text, a mapping that says what it holds, and rows of the contract."""
