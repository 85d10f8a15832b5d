"""The unit with which systemd restarts, watches and confines the daemon."""

from __future__ import annotations

from pathlib import Path

_UNIT = """\
# Underbench under systemd: cp to /etc/systemd/system/, then systemctl enable --now underbench
[Unit]
Description=Underbench keeps a bonsai garden alive through the weather
Wants=network-online.target
After=network-online.target time-sync.target
StartLimitIntervalSec=0

[Service]
Type=notify
NotifyAccess=main
ExecStart={command} --config {config} run
# A pass with a slow network and slow push services ends in four minutes; longer is a hang.
WatchdogSec=15min
Restart=always
RestartSec=60
TimeoutStopSec=5min
User={user}
{state}
UMask=0077
# Push addresses: one a line. Other secrets the same way: danger_urls, stand_in_urls,
# weather_api_key. A file named here has to be there.
LoadCredential=telling_urls:{secrets}/telling_urls

CapabilityBoundingSet=
AmbientCapabilities=
NoNewPrivileges=yes
ProtectSystem=strict
ProtectHome={home}
PrivateTmp=yes
PrivateDevices=yes
PrivateUsers=yes
PrivateIPC=yes
ProtectClock=yes
ProtectControlGroups=yes
ProtectHostname=yes
ProtectKernelLogs=yes
ProtectKernelModules=yes
ProtectKernelTunables=yes
ProtectProc=invisible
ProcSubset=pid
DevicePolicy=closed
LockPersonality=yes
MemoryDenyWriteExecute=yes
RemoveIPC=yes
RestrictAddressFamilies=AF_INET AF_INET6 AF_UNIX
RestrictNamespaces=yes
RestrictRealtime=yes
RestrictSUIDSGID=yes
SystemCallArchitectures=native
SystemCallFilter=@system-service
SystemCallFilter=~@privileged @resources
SystemCallErrorNumber=EPERM
MemoryMax=1G
# glibc keeps what a cold pass needed for a moment; with these it gives it back.
Environment=MALLOC_MMAP_THRESHOLD_=1048576 MALLOC_TRIM_THRESHOLD_=1048576

[Install]
WantedBy=multi-user.target
"""
_OWN_STATE = "StateDirectory=underbench\nStateDirectoryMode=0700"
COMMAND, CONFIG = Path("/opt/underbench/bin/underbench"), Path("/etc/underbench/garden.toml")
USER = "underbench"


def system_unit() -> str:
    """Return the unit for an installation for the whole machine. It runs as a user of its own, who
    can read nobody's home. The database is in the unit's state directory."""
    return _unit(COMMAND, CONFIG, USER, _OWN_STATE, "yes")


def users_unit(command: Path, config: Path, user: str, database: Path) -> str:
    """Return the unit for what a ``user`` has installed at home; paths are absolute. In the home
    the daemon can write only the folder of the database, which has to be there."""
    return _unit(command, config, user, f"ReadWritePaths={database.parent}", "read-only")


def _unit(command: Path, config: Path, user: str, state: str, home: str) -> str:
    secrets = config.parent / "secrets"
    return _UNIT.format(
        command=command, config=config, secrets=secrets, user=user, state=state, home=home
    )
