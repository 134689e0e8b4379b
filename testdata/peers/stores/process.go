package main

import (
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// ownCPU is the processor time of this process.
func ownCPU() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		panic(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// processCPU is that of another, counted in hundredths of a second (proc(5)).
func processCPU(pid int) time.Duration {
	if pid == 0 {
		return 0
	}
	raw, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return 0
	}
	text := string(raw)
	fields := strings.Fields(text[strings.LastIndexByte(text, ')')+1:])
	user, _ := strconv.Atoi(fields[11])
	system, _ := strconv.Atoi(fields[12])
	return time.Duration(user+system) * 10 * time.Millisecond
}

// server is an engine that runs as a process of its own.
type server struct {
	command *exec.Cmd
	url     string
}

func (s *server) process() int { return s.command.Process.Pid }

func (s *server) start(health, program string, args ...string) error {
	s.command = exec.Command(program, args...)
	if err := s.command.Start(); err != nil {
		return fmt.Errorf("%w (install the peers: sh testdata/peers/install.sh)", err)
	}
	for range 300 {
		if r, err := http.Get(health); err == nil {
			r.Body.Close()
			if r.StatusCode < 300 {
				return nil
			}
		}
		time.Sleep(100 * time.Millisecond)
	}
	return fmt.Errorf("%s does not answer", program)
}

func (s *server) close() error {
	if s.command == nil || s.command.Process == nil {
		return nil
	}
	_ = s.command.Process.Kill()
	_ = s.command.Wait() // it was killed
	return nil
}

func freePort() string {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		panic(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// quiet waits until a server has been idle for twelve seconds: what it writes
// and compacts behind its answers belongs to the cost.
func (s *server) quiet() {
	idle := 0
	for last := processCPU(s.process()); idle < 24; {
		time.Sleep(500 * time.Millisecond)
		now := processCPU(s.process())
		if now-last <= 20*time.Millisecond {
			idle++
		} else {
			idle = 0
		}
		last = now
	}
}
