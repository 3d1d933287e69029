"""The demo project 'Low Tide Radio' and the script that synthesises its samples; all of it invented for rigproof."""
