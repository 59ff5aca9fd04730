"""What should the next wear do? Chances of an answer, times of finger-sticks, one experiment."""
