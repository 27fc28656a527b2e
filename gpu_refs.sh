set -e
mkdir -p /tmp/site; python3 -m pip install -q --no-index --no-deps --no-compile --no-cache-dir --upgrade --target /tmp/site .whl/*.whl
tar xJf .whl/mi.tar.xz -C /tmp/site
export PYTHONPATH=/tmp/site:$PWD
timeout 520 python3 -m render.measure.make_references --turns 1 "$@" || true
tar cf $OUT/pictures.tar -C render/measure/references pictures
