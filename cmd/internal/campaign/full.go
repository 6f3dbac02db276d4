package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"syscall"

	"github.com/go-json-experiment/json"
)

// modeFull is the child that has a small disk of its own.
const modeFull = "on-full-disk"

// diskBytes is how large that disk is. Source: the project's notes on reliability, 5.4.
const diskBytes = 32 << 20

// apart starts a child that may mount what nobody else sees.
func (o options) apart(ctx context.Context, args ...string) *exec.Cmd {
	line := o.self(modeFull, args...)
	cmd := exec.CommandContext(ctx, line[0], line[1:]...)
	cmd.SysProcAttr = &syscall.SysProcAttr{
		Cloneflags:  syscall.CLONE_NEWUSER | syscall.CLONE_NEWNS,
		UidMappings: []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getuid(), Size: 1}},
		GidMappings: []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getgid(), Size: 1}},
	}
	return cmd
}

// mayMount is nil when this machine lets a process mount a disk of its own in namespaces of its own.
func mayMount() error {
	folder, err := os.MkdirTemp("", "campaign-disk-")
	if err != nil {
		return err
	}
	defer func() { _ = os.Remove(folder) }()
	o := options{self: asChild}
	if out, err := o.apart(context.Background(), folder).CombinedOutput(); err != nil {
		return fmt.Errorf("a small disk cannot be mounted: user namespaces are not allowed on this machine: %w: %s", err, out)
	}
	return nil
}

// full lets a daemon's disk get full and free again, in a child with a small disk of its own.
func full(ctx context.Context, o options) (out result, err error) {
	disk := filepath.Join(o.folder, "disk")
	if err := os.Mkdir(disk, 0o700); err != nil {
		return out, err
	}
	cmd := o.apart(ctx, disk, strconv.Itoa(o.cycles), strconv.FormatUint(o.seed, 10))
	var said, complaints bytes.Buffer
	cmd.Stdout, cmd.Stderr = &said, &complaints
	if err := cmd.Run(); err != nil {
		return out, fmt.Errorf("%w: %s", err, complaints.String())
	}
	return out, json.Unmarshal(said.Bytes(), &out)
}

// inFull is the child: it mounts the disk, and with more than that to do tries the daemon on it.
func inFull(ctx context.Context, args []string) error {
	if err := syscall.Mount("none", "/", "", syscall.MS_REC|syscall.MS_PRIVATE, ""); err != nil {
		return err
	}
	if err := syscall.Mount("campaign", args[0], "tmpfs", 0, fmt.Sprintf("size=%d,mode=0700", diskBytes)); err != nil {
		return err
	}
	if len(args) == 1 {
		return nil
	}
	out, err := onFullDisk(ctx, options{seed: uint64(whole(args[2])), cycles: whole(args[1]), folder: args[0], self: asChild})
	if err != nil {
		return err
	}
	line, err := json.Marshal(out)
	if err != nil {
		return err
	}
	_, err = os.Stdout.Write(line)
	return err
}
