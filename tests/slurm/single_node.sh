#!/bin/sh
# A Slurm of one node on this machine, for tests: from Debian's packages (apt-get install slurm-wlm munge), as
# root, without systemd and without accounting.
#   tests/slurm/single_node.sh start FOLDER     starts it; its settings, state and process ids are in FOLDER
#   tests/slurm/single_node.sh stop FOLDER      ends what this started
set -eu
verb=${1:-} folder=${2:-}
case "$verb" in start|stop) ;; *) sed -n 2,5p "$0"; exit 2 ;; esac
[ -n "$folder" ] || { sed -n 2,5p "$0"; exit 2; }
mkdir -p "$folder"
folder=$(cd "$folder" && pwd)

if [ "$verb" = stop ]; then
    # what this started, by its id
    for name in slurmd slurmctld munged; do
        [ -f "$folder/$name.pid" ] && kill "$(cat "$folder/$name.pid")" 2>/dev/null || true
    done
    if [ "$(readlink /etc/slurm/slurm.conf)" = "$folder/slurm.conf" ]; then rm /etc/slurm/slurm.conf; fi
    exit 0
fi

for tool in munged slurmctld slurmd; do
    command -v "$tool" >/dev/null || { echo "$tool is missing: apt-get install slurm-wlm munge" >&2; exit 2; }
done
[ "$(id -u)" = 0 ] || { echo "This starts daemons of other users: run it as root." >&2; exit 2; }
[ ! -e /etc/slurm/slurm.conf ] ||
    { echo "/etc/slurm/slurm.conf is there: this machine has a Slurm of its own." >&2; exit 2; }
host=$(hostname -s)
getent hosts "$host" >/dev/null || echo "127.0.0.1 $host" >> /etc/hosts

chmod 755 "$folder"
mkdir -p "$folder/munge" "$folder/state" "$folder/spool"
chown munge: "$folder/munge"
chown slurm: "$folder/state"
head -c 1024 /dev/urandom > "$folder/munge/key"
chown munge: "$folder/munge/key"
chmod 400 "$folder/munge/key"

cat > "$folder/slurm.conf" <<END
ClusterName=test
SlurmctldHost=$host(127.0.0.1)
SlurmUser=slurm
SlurmctldPort=${SLURMCTLD_PORT:-16817}
SlurmdPort=${SLURMD_PORT:-16818}
AuthType=auth/munge
AuthInfo=socket=$folder/munge/socket
CryptoType=crypto/munge
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
JobAcctGatherType=jobacct_gather/none
SwitchType=switch/none
SelectType=select/cons_tres
SelectTypeParameters=CR_Core
SchedulerParameters=sched_interval=2,batch_sched_delay=1
StateSaveLocation=$folder/state
SlurmdSpoolDir=$folder/spool
SlurmctldPidFile=$folder/state/slurmctld.pid
SlurmdPidFile=$folder/slurmd.pid
SlurmctldLogFile=$folder/state/slurmctld.log
SlurmdLogFile=$folder/slurmd.log
MinJobAge=300
ReturnToService=2
KillWait=2
$(slurmd -C | grep -o '^NodeName=.*') NodeAddr=127.0.0.1 State=UNKNOWN
PartitionName=all Nodes=ALL Default=YES MaxTime=INFINITE State=UP
END

setpriv --reuid munge --regid munge --clear-groups munged \
    --socket "$folder/munge/socket" --key-file "$folder/munge/key" \
    --log-file "$folder/munge/log" --pid-file "$folder/munge/munged.pid" --seed-file "$folder/munge/seed"
cp "$folder/munge/munged.pid" "$folder/munged.pid"
# a job step of Snakemake's finds Slurm's settings where they usually are, and by nothing else
mkdir -p /etc/slurm
rm -f /etc/slurm/slurm.conf
ln -s "$folder/slurm.conf" /etc/slurm/slurm.conf
slurmctld
slurmd
for second in 1 2 3 4 5 6 7 8 9 10 11 12 13 14 15; do
    sinfo --noheader --format %T 2>/dev/null | grep -q idle && break
    sleep 1
done
cp "$folder/state/slurmctld.pid" "$folder/slurmctld.pid"
sinfo --noheader --format %T | grep -q idle ||
    { echo "The node did not come up; see $folder/slurmd.log and $folder/state/slurmctld.log" >&2; exit 1; }
