"""How treated patients did, counted with intervals, missing follow-up and cautions."""
