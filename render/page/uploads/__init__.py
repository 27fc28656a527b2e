"""Files and photographs that the browser sends."""
