"""From the model to one flat graph of sections, jacks, cables and messages, which every reading then reads."""
