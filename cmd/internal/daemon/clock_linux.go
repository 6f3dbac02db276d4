package daemon

import (
	"errors"
	"fmt"
	"os"

	"golang.org/x/sys/unix"
)

// clockSteps gives a channel that is told when the machine's clock was set, or the machine has slept; once at first, since
// nobody knows what the clock did while the daemon was away. Stop ends it. Linux tells by itself, so nothing looks at the
// clock now and then. Source: timerfd_create(2), TFD_TIMER_CANCEL_ON_SET.
func clockSteps() (steps <-chan struct{}, stop func(), err error) {
	notices, note := noter()
	note()
	fd, err := unix.TimerfdCreate(unix.CLOCK_REALTIME, unix.TFD_NONBLOCK|unix.TFD_CLOEXEC)
	if err != nil {
		return notices, func() {}, fmt.Errorf("watch the clock: %w", err)
	}
	file := os.NewFile(uintptr(fd), "clock")
	const never = 1 << 40 // seconds since 1970: the timer is there to be cancelled, not to ring
	err = unix.TimerfdSettime(fd, unix.TFD_TIMER_ABSTIME|unix.TFD_TIMER_CANCEL_ON_SET, &unix.ItimerSpec{Value: unix.Timespec{Sec: never}}, nil)
	if err != nil {
		return notices, func() {}, errors.Join(fmt.Errorf("watch the clock: %w", err), file.Close())
	}
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		tellSteps(func() bool {
			_, err := file.Read(make([]byte, 8))
			return errors.Is(err, unix.ECANCELED)
		}, note)
	}()
	return notices, func() { _ = file.Close(); <-ended }, nil
}
