"""What does one foreign cell say? Amounts and moments in the ways people write them."""
