"""What goes in: photographs, wishes, kit and room."""
