#!/bin/sh
# System libraries that the mesher and the picture load: installs those a bare Debian or Ubuntu
# lacks, or names them and the command that does it. Does nothing where all of them are there.

packages="libegl1 libfontconfig1 libgl1 libgl1-mesa-dri libglu1-mesa libgomp1 libx11-6 libxcursor1
  libxext6 libxfixes3 libxft2 libxinerama1 libxrender1"
libraries="libEGL.so.1 libfontconfig.so.1 libGL.so.1 libGLU.so.1 libgomp.so.1 libX11.so.6
  libXcursor.so.1 libXext.so.6 libXfixes.so.3 libXft.so.2 libXinerama.so.1 libXrender.so.1"

PATH="$PATH:/usr/sbin:/sbin"
command -v ldconfig >/dev/null || exit 0
found=$(ldconfig -p)
missing=""
for library in $libraries; do
  case "$found" in *"$library "*) ;; *) missing="$missing $library" ;; esac
done
[ -z "$missing" ] && exit 0

echo "system libraries missing:$missing" >&2
install="apt-get install -y --no-install-recommends $(echo $packages)"
if ! command -v apt-get >/dev/null; then
  echo "install them with the package manager of this system, then go on" >&2
  exit 1
elif [ "$(id -u)" != 0 ]; then
  echo "install them, then go on: sudo apt-get update && sudo $install" >&2
  exit 1
fi
echo "installing them: $install" >&2
export DEBIAN_FRONTEND=noninteractive
{ apt-get update -qq && $install -qq; } >/dev/null
