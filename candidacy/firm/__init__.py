"""How firm an outcome stands under published errors of measurement and disagreement of readers."""
