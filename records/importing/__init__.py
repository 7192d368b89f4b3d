"""From a member's file to weighings: reading the file here, landing it beside."""
