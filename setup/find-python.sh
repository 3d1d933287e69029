# Sets $python for the starters, given $here: the one in .venv if a start made it whole, else one on the PATH.
python="$here/.venv/bin/python"
if [ ! -e "$here/.venv/stamps/venv" ] || [ ! -x "$python" ]; then
  python=
  for name in python3 python3.11 python3.12 python3.13 python3.14; do
    if "$name" -c 'import sys, venv, ensurepip; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
      python=$name
      break
    fi
  done
fi
if [ -z "$python" ]; then
  echo "rigproof needs Python 3.11 or newer with its venv and ensurepip modules, and found none on the PATH." >&2
  echo "  Debian, Ubuntu: apt install python3 python3-venv      others: your package manager, or python.org" >&2
  false
fi
