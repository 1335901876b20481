"""What pages show, frozen and ready to print; made without HTML."""
