"""Generic module sheets, one TOML file a model, made of section kinds. All figures are typical and no maker's."""
