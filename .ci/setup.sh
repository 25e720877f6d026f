# Sourced by tests/run and data/demo/run: paths, the packages of the distribution, the virtual environment, the build.
# shellcheck shell=bash
# shellcheck disable=SC2015,SC2034  # "A && B || stop" is meant; the variables are for the scripts that source this file

root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd -P)
build=$root/build
logs=$build/logs
venv=$root/.venv
python=$venv/bin/python
jobs=$(nproc 2>/dev/null || echo 2)

# Nothing of the caller's Python set-up may leak into ours.
unset PYTHONHOME PYTHONPATH PYTHONSTARTUP VIRTUAL_ENV
export PYTHONNOUSERSITE=1 PIP_DISABLE_PIP_VERSION_CHECK=1
if command -v ccache >/dev/null; then
  export CCACHE_BASEDIR=$root CMAKE_CXX_COMPILER_LAUNCHER=ccache
fi

say() { printf '%s\n' "$*"; }

# One plain sentence, and nothing has been judged: exit status 2.
stop() {
  printf '%s\n' "Stopped: $*" >&2
  exit 2
}

# logged NAME COMMAND...: output goes to build/logs/NAME.log; the tail is shown if the command fails.
logged() {
  local name=$1 status=0
  shift
  mkdir -p "$logs" || stop "the folder $logs cannot be made."
  "$@" >"$logs/$name.log" 2>&1 </dev/null || status=$?
  if [ "$status" -ne 0 ]; then
    say "---- the last lines of $logs/$name.log ----"
    tail -n 40 "$logs/$name.log"
    say "----"
  fi
  return "$status"
}

# can_be_root: true if a command can be run as root, asking for a password only on a terminal.
can_be_root() {
  [ "$(id -u)" -eq 0 ] && return 0
  command -v sudo >/dev/null || return 1
  sudo -n true 2>/dev/null || { [ -t 0 ] && [ -t 2 ] && sudo true; }
}

as_root() {
  if [ "$(id -u)" -eq 0 ]; then env "$@"; else sudo -n env "$@"; fi
}

# missing_of PACKAGE...: those that are not installed, one a line.
missing_of() {
  [ "$#" -eq 0 ] && return 0
  local installed
  # dpkg-query ends with status 1 when it knows nothing of a package: that one is missing.
  installed=$(dpkg-query -W -f='${Package} ${db:Status-Status}\n' "$@" 2>/dev/null | sed -n 's/ installed$//p')
  printf '%s\n' "$@" | grep -vxF -e "${installed:-none}" || true
}

apt_install() {
  local options=(-y -q --no-install-recommends -o DPkg::Lock::Timeout=300 -o Acquire::Retries=2)
  as_root DEBIAN_FRONTEND=noninteractive apt-get install "${options[@]}" "$@" ||
    { as_root DEBIAN_FRONTEND=noninteractive apt-get update -q &&
      as_root DEBIAN_FRONTEND=noninteractive apt-get install "${options[@]}" "$@"; }
}

# need_packages "REQUIRED..." "OPTIONAL...": installs what is missing; stops if something required stays missing.
need_packages() {
  local required optional missing
  read -ra required <<<"$1"
  read -ra optional <<<"${2:-}"
  if ! command -v dpkg-query >/dev/null || ! command -v apt-get >/dev/null; then
    local tool
    for tool in cmake ninja /usr/bin/python3; do
      command -v "$tool" >/dev/null || stop "$tool is not there, and this system has no apt-get to install it with;" \
        "install the equivalents of these Debian packages and run again: $1"
    done
    return 0
  fi
  mapfile -t missing < <(missing_of "${required[@]}" "${optional[@]}")
  [ "${#missing[@]}" -eq 0 ] && return 0
  if can_be_root; then
    say "Installing with apt-get: ${missing[*]}"
    logged apt apt_install "${missing[@]}" && return 0
    # Something optional may be what could not be had.
    mapfile -t missing < <(missing_of "${required[@]}")
    [ "${#missing[@]}" -eq 0 ] || logged apt apt_install "${missing[@]}" ||
      stop "apt-get could not install ${missing[*]} (see $logs/apt.log). Is the network reached?"
  else
    mapfile -t missing < <(missing_of "${required[@]}")
    [ "${#missing[@]}" -eq 0 ] || stop "packages are missing and neither root nor sudo is at hand;" \
      "have an administrator run: apt-get install ${missing[*]}"
  fi
}

# need_venv: .venv, on the distribution's own python3, seeing the distribution's packages.
need_venv() {
  [ -x /usr/bin/python3 ] || stop "/usr/bin/python3 is not there; install the package python3."
  /usr/bin/python3 -c 'import sys; sys.exit(sys.version_info < (3, 11))' ||
    stop "/usr/bin/python3 is $(/usr/bin/python3 -V), and Python 3.11 or newer is needed (Debian 12 has it)."
  if [ -e "$venv" ]; then
    [ -d "$venv" ] && grep -qsx 'include-system-site-packages = true' "$venv/pyvenv.cfg" &&
      "$python" -c 'import sys; sys.exit(sys.base_prefix != "/usr")' 2>/dev/null ||
      stop "$venv stands there but was not made from /usr/bin/python3 with --system-site-packages; move it away and run again."
    return 0
  fi
  logged venv /usr/bin/python3 -m venv --system-site-packages "$venv" ||
    { rm -rf "$venv"; stop "the virtual environment $venv could not be made."; }
}

need_compiler() {
  command -v "${CXX:-c++}" >/dev/null || stop "there is no C++ compiler: '${CXX:-c++}' was not found."
}

# configure FOLDER OPTION...: Ninja build files in FOLDER; a cache made elsewhere or by another generator is replaced.
configure() {
  local folder=$1 options=(-G Ninja) cache=$1/CMakeCache.txt
  shift
  if [ -e "$cache" ] && ! { grep -qxF "CMAKE_HOME_DIRECTORY:INTERNAL=$root" "$cache" &&
    grep -qxF "CMAKE_GENERATOR:INTERNAL=Ninja" "$cache"; }; then
    options+=(--fresh)
  fi
  cmake -S "$root" -B "$folder" "${options[@]}" "$@"
}

# pypi_reached: whether a small package can be fetched; asked at most once in a run.
pypi_answer=
pypi_reached() {
  if [ -z "$pypi_answer" ]; then
    local folder
    folder=$(mktemp -d)
    if timeout 60 "$python" -m pip download -q --retries 1 --timeout 15 --no-deps -d "$folder" 'scikit-build-core>=0.10' \
      >/dev/null 2>&1 </dev/null; then pypi_answer=yes; else pypi_answer=no; fi
    rm -rf "$folder"
  fi
  [ "$pypi_answer" = yes ]
}

cxx_packages="build-essential cmake ninja-build libboost-dev libfmt-dev libtomlplusplus-dev"
python_packages="python3-dev python3-venv pybind11-dev python3-numpy python3-pandas python3-openpyxl python3-xlsxwriter python3-tqdm python3-jinja2"
