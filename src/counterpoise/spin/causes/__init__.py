"""From a signature to the probability of each group of causes."""
