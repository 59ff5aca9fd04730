"""What do rows say of one coefficient? Intercepts, fixed effects, permutation, and when it is a claim."""
