"""What each fault changes in a spin: measured on drawn machines, tabulated, claimed from that."""
