"""What lies in `deploy/`: checked by the programs that will read it, where they are here."""

import re
import shutil
import subprocess
import sys

import pytest
import yaml

from tests.house import BASE, environment

DEPLOY = BASE / "deploy"


def has(program):
    return pytest.mark.skipif(shutil.which(program) is None, reason=f"{program} is not here")


@has("systemd-analyze")
@pytest.mark.parametrize("unit", sorted(p.name for p in (DEPLOY / "systemd").iterdir()))
def test_systemd_takes_the_units(unit, tmp_path):
    for path in (DEPLOY / "systemd").iterdir():
        shutil.copy(path, tmp_path)
    line = ["systemd-analyze", "verify", "--man=no", str(tmp_path / unit)]
    done = subprocess.run(line, capture_output=True, text=True, timeout=60)
    said = [words for words in done.stderr.splitlines() if unit in words]
    assert said == []


@has("nginx")
def test_nginx_takes_the_example(tmp_path):
    """With the names of this machine in the places that are to be changed."""
    text = (DEPLOY / "nginx.conf").read_text().replace("pages:8000", "127.0.0.1:8000")
    for name in ("fullchain", "privkey"):
        text = text.replace(f"/etc/nginx/certificate/{name}.pem", str(tmp_path / f"{name}.pem"))
    key, certificate = tmp_path / "privkey.pem", tmp_path / "fullchain.pem"
    line = ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-subj", "/CN=x"]
    subprocess.run([*line, "-keyout", key, "-out", certificate], check=True, capture_output=True)
    whole = tmp_path / "nginx.conf"
    kinds = ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    places = "".join(f"{kind}_temp_path {tmp_path}/{kind};\n" for kind in kinds)
    http = f"access_log off;\n{places}{text}"
    whole.write_text(f"pid {tmp_path}/pid;\nevents {{}}\nhttp {{\n{http}\n}}\n")
    line = ["nginx", "-t", "-c", str(whole), "-e", str(tmp_path / "log")]
    done = subprocess.run(line, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def test_the_compose_file_names_only_what_there_is(tmp_path):
    told = yaml.safe_load((DEPLOY / "compose.yaml").read_text())
    services = told["services"]
    assert set(services) == {"tables", "pages", "worker", "database", "proxy"}
    for name, service in services.items():
        assert set(service.get("depends_on", [])) <= set(services), name
        assert set(service.get("secrets", [])) <= set(told["secrets"]), name
        assert set(service["networks"]) <= set(told["networks"]), name
        for volume in service.get("volumes", []):
            source = volume.partition(":")[0]
            assert source in told["volumes"] or source.startswith("./"), volume
    for name in ("tables", "pages", "worker"):
        command = services[name]["command"]
        assert command[:2] == ["python", "manage.py"]
        line = [sys.executable, "manage.py", command[2], "--help"]
        done = subprocess.run(line, cwd=BASE, env=environment(tmp_path), capture_output=True)
        assert done.returncode == 0, command


def test_every_setting_used_in_deploy_is_one_that_the_readme_explains():
    used = set()
    for path in DEPLOY.rglob("*"):
        if path.is_file():
            used |= set(re.findall(r"\bWD_[A-Z_]+\b", path.read_text()))
    readme = (BASE / "README.md").read_text()
    assert used
    assert {n for n in used if f"`{n.removesuffix('_FILE')}`" not in readme} == set()


def test_the_container_file_copies_what_there_is_and_runs_as_nobody_special():
    lines = (DEPLOY / "Containerfile").read_text().splitlines()
    copied = [word for line in lines if line.startswith("COPY") for word in line.split()[1:-1]]
    assert {"optics", "shootlog", "course", "config", "requirements-many.txt"} <= set(copied)
    assert [name for name in copied if not (BASE / name).exists()] == []
    users = [line.split()[1] for line in lines if line.startswith("USER")]
    assert users == ["10001"]  # a number: who starts it need not know the name
    assert "--require-hashes" in "\n".join(lines)
