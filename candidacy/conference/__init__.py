"""The case conference: what is asked, how members rate, what people decided, and minutes. The program decides nothing here."""
