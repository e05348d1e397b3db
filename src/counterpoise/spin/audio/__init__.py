"""The sound of a spin: WAV files, tones, levels."""
