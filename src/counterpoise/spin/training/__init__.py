"""Learn what signatures mean, from synthetic recordings of random machines."""
