"""Named sets of rules, as data: each value with where it is in print."""
