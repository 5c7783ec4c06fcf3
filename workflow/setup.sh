# shellcheck shell=bash
# Brings everything that run and test need into place, then leaves it alone until the lock file changes.
# To be sourced. It installs system libraries only as root or with a sudo that asks for no password,
# and Python packages only into .venv of this checkout.
set -euo pipefail

ROOT="$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd -P)"
cd "$ROOT"

readonly UV_RELEASE="0.13.9"
readonly STAMP=".venv/.setup-stamp"
# OpenGL, X11 client and OpenMP libraries that gmsh and VTK load even when nothing is drawn on a
# screen, and the last one for the linear algebra of NGSolve, which the tests compare with.
readonly SYSTEM_LIBRARIES=(
  libglu1-mesa libxcursor1 libxft2 libxinerama1 libxrender1 libgl1 libegl1 libgomp1 libquadmath0
)

say() { printf '%s\n' "$*" >&2; }

fail() {
  say "setup: $*"
  exit 1
}

find_python() {
  local candidate
  for candidate in "${PYTHON:-}" python3 python3.14 python3.13 python3.12 python3.11; do
    if [[ -n "$candidate" ]] && is_new_enough "$candidate"; then
      command -v "$candidate"
      return
    fi
  done
}

is_new_enough() { "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1; }

can_make_venv() { "$1" -c 'import ensurepip, venv' 2>/dev/null; }

is_installed() {
  [[ "$(dpkg-query -W -f '${db:Status-Status}\n' "$1" 2>/dev/null | head -n 1)" == installed ]]
}

missing_system_packages() {
  local package python
  for package in "${SYSTEM_LIBRARIES[@]}"; do
    is_installed "$package" || printf '%s\n' "$package"
  done
  python="$(find_python)"
  if [[ -z "$python" ]]; then
    printf 'python3\npython3-venv\n'
  elif [[ ! -f "$STAMP" ]] && ! can_make_venv "$python"; then
    printf 'python3-venv\n'
  fi
}

install_system_packages() {
  local -a as_root=()
  if [[ "$(id -u)" -ne 0 ]]; then
    if ! command -v sudo >/dev/null || ! sudo -n true 2>/dev/null; then
      fail "system packages are missing; run this line, then start again:
  sudo apt-get update && sudo apt-get install -y --no-install-recommends $*"
    fi
    as_root=(sudo -n)
  fi
  say "setup: installing system packages: $*"
  "${as_root[@]}" apt-get update -q >&2
  "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive \
    apt-get install -y -q --no-install-recommends "$@" >&2
}

prepare_system() {
  local -a missing
  if ! command -v dpkg-query >/dev/null; then
    [[ -f "$STAMP" ]] || say "setup: no Debian or Ubuntu here; please have the equivalents of these
  installed: ${SYSTEM_LIBRARIES[*]}"
    return
  fi
  mapfile -t missing < <(missing_system_packages)
  if [[ ${#missing[@]} -gt 0 ]]; then
    install_system_packages "${missing[@]}"
  fi
}

# A checkout that was moved has console scripts pointing at its old place: then everything is made anew.
wanted_stamp() {
  printf '%s\n%s\n' "$ROOT" "$(cat uv.lock pyproject.toml | cksum) uv $UV_RELEASE"
}

is_current() {
  [[ -x .venv/bin/snakemake && -f "$STAMP" && "$(cat "$STAMP")" == "$(wanted_stamp)" ]]
}

prepare_python() {
  local python
  local -a clear=()
  is_current && return
  python="$(find_python)"
  [[ -n "$python" ]] || fail "Python 3.11 or later is needed, found $(python3 -V 2>&1 || true).
  Debian 12, Ubuntu 24.04 or later: sudo apt-get install -y python3 python3-venv
  or name one: PYTHON=/path/to/python3.11 $0"
  can_make_venv "$python" || fail "$python lacks the venv module.
  Debian, Ubuntu: sudo apt-get install -y python3-venv"

  say "setup: preparing .venv (takes a few minutes the first time)"
  if ! is_new_enough .venv/bin/python || [[ -f "$STAMP" && "$(head -n 1 "$STAMP")" != "$ROOT" ]]; then
    clear=(--clear)
  fi
  if [[ ${#clear[@]} -gt 0 ]] || ! .venv/bin/python -c 'import pip' 2>/dev/null; then
    "$python" -m venv "${clear[@]}" .venv
  fi
  rm -f "$STAMP"
  .venv/bin/python -m pip install --quiet --disable-pip-version-check "uv==$UV_RELEASE" >&2
  # Compiled once here, for every job of a run is a process that imports much.
  # System certificates, so that it also works behind a company's own certificate authority.
  UV_SYSTEM_CERTS=1 UV_PYTHON_DOWNLOADS=never UV_PROJECT_ENVIRONMENT=.venv VIRTUAL_ENV="$ROOT/.venv" \
    .venv/bin/python -m uv sync --frozen --quiet --compile-bytecode >&2
  wanted_stamp >"$STAMP"
}

# Two starts at once wait for each other where the system has flock.
prepare_python_once() {
  is_current && return
  if command -v flock >/dev/null; then
    (
      flock 9
      prepare_python
    ) 9<"$ROOT"
  else
    prepare_python
  fi
}

# Without a writable home the caches go into the checkout.
prepare_environment() {
  if [[ -z "${HOME:-}" || ! -w "${HOME:-/}" ]]; then
    export XDG_CACHE_HOME="$ROOT/.venv/cache"
    export MPLCONFIGDIR="$ROOT/.venv/cache/matplotlib"
    mkdir -p "$MPLCONFIGDIR"
  fi
  export MPLBACKEND=Agg
  export PYVISTA_OFF_SCREEN=true
  export VTK_DEFAULT_OPENGL_WINDOW="${VTK_DEFAULT_OPENGL_WINDOW:-vtkEGLRenderWindow}"
}

prepare_system
prepare_environment
prepare_python_once
export PATH="$ROOT/.venv/bin:$PATH"
