"""A store that speaks S3 and checks signatures: OpenStack Swift of Debian, made for one run.

One copy of everything on one disk, which is enough to be honest about lost bytes: an object is
on the disk before Swift says that it has it.
"""

import shutil
import time

PACKAGES = ["swift-proxy", "swift-account", "swift-container", "swift-object", "memcached"]
KEY, SECRET = "wd:house", "swordfish"
PORT = 8080
PARTS = {"account": 6202, "container": 6201, "object": 6200}

COMMON = """[DEFAULT]
bind_ip = {ip}
bind_port = {port}
swift_dir = {folder}
devices = {folder}/devices
mount_check = false
user = root
workers = {workers}
log_facility = LOG_LOCAL1
"""
PART = """
[pipeline:main]
pipeline = {part}-server

[app:{part}-server]
use = egg:swift#{part}
"""
PROXY = """
[pipeline:main]
pipeline = catch_errors gatekeeper cache listing_formats s3api tempauth copy slo proxy-server

[app:proxy-server]
use = egg:swift#proxy
account_autocreate = true

[filter:catch_errors]
use = egg:swift#catch_errors

[filter:gatekeeper]
use = egg:swift#gatekeeper

[filter:listing_formats]
use = egg:swift#listing_formats

[filter:copy]
use = egg:swift#copy

[filter:slo]
use = egg:swift#slo

[filter:s3api]
use = egg:swift#s3api

[filter:tempauth]
use = egg:swift#tempauth
user_wd_house = swordfish .admin

[filter:cache]
use = egg:swift#memcache
memcache_servers = 127.0.0.1:11211
"""


def is_here():
    return all(shutil.which(f"swift-{name}-server") for name in ["proxy", *PARTS])


def start(host, folder, said):
    """Start it on a host; return its address as WD_STORAGE_URL wants it, without a bucket."""
    devices = folder / "devices" / "d1"
    devices.mkdir(parents=True)
    (folder / "swift.conf").write_text(
        "[swift-hash]\nswift_hash_path_suffix = a\nswift_hash_path_prefix = b\n"
    )
    for part, port in PARTS.items():
        builder = str(folder / f"{part}.builder")
        for words in (
            ["create", "4", "1", "1"],
            ["add", f"r1z1-{host.address}:{port}/d1", "1"],
            ["rebalance"],
        ):
            done = host.run("swift-ring-builder", builder, *words)
            assert done.returncode == 0, done.stdout + done.stderr
    workers = {"proxy": 2, "object": 2}
    quiet = {"stdout": said, "stderr": said}
    host.start("memcached", "-u", "root", "-l", "127.0.0.1", "-m", "16", **quiet)
    for part, port in [*PARTS.items(), ("proxy", PORT)]:
        conf = folder / f"{part}-server.conf"
        told = COMMON.format(
            ip=host.address, port=port, folder=folder, workers=workers.get(part, 1)
        )
        conf.write_text(told + (PROXY if part == "proxy" else PART.format(part=part)))
        host.start(f"swift-{part}-server", conf, **quiet)
    time.sleep(1)
    return f"s3+http://{KEY.replace(':', '%3A')}:{SECRET}@{host.address}:{PORT}"
