"""Would the tests see a wrong number? Faults planted one at a time in the code that computes."""
