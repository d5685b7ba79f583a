"""What somebody outside the project does through the public names alone, each as a short script that runs as a test."""
