"""What closed jobs teach: figures in, posteriors out; knows no catalog, no store, no machine."""
