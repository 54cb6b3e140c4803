"""Pinned Python packages for the benches that set this program beside others."""

import subprocess
import sys


def set_up(folder, packages):
    """The Python of an environment in `folder` that has the packages, made where there is none yet."""
    python = folder / "bin/python"
    mark = folder / "packages.txt"
    if not mark.exists() or mark.read_text().split() != packages:
        subprocess.run([sys.executable, "-m", "venv", "--clear", folder], check=True)
        pip = [python, "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "--only-binary", ":all:"]
        subprocess.run(pip + packages, check=True)
        mark.write_text("\n".join(packages))
    return python
