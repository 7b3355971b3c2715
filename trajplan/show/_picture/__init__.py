"""Items as a picture: camera, panes, key of colours, words beside it."""
