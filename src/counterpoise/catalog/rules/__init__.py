"""What a family must say to be of use and to hurt nobody: rules by name, each with its remedy."""
