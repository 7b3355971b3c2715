"""What is drawn: plain arrays with a role, a colour and a label; no pyvista."""
