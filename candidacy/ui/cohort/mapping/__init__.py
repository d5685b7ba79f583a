"""What the columns of the tables hold: proposed, compared column by column, saved and loaded as one file."""
