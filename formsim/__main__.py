"""``python -m formsim``."""

from formsim.cli import main

raise SystemExit(main())
