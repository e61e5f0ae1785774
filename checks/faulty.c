/* A machine that fails when a check says so, laid under the program by LD_PRELOAD. FAULTY names a folder: while a file `full` is
 * in it nothing more can be written to files (connections go on); a file `clock` says by how many seconds the clock is off. */

#define _GNU_SOURCE
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/uio.h>
#include <time.h>
#include <unistd.h>

static int opened(const char *name) {
    const char *folder = getenv("FAULTY");
    char path[4096];
    if (!folder || snprintf(path, sizeof path, "%s/%s", folder, name) >= (int)sizeof path) return -1;
    return (int)syscall(SYS_openat, AT_FDCWD, path, O_RDONLY | O_CLOEXEC, 0);
}

/* Whether this write finds no room. */
static int full(int fd) {
    int before = errno, no_room = 0, mark;
    struct stat what;
    if (fstat(fd, &what) == 0 && S_ISREG(what.st_mode) && (mark = opened("full")) >= 0) {
        syscall(SYS_close, mark);
        no_room = 1;
    }
    errno = no_room ? ENOSPC : before;
    return no_room;
}

ssize_t write(int fd, const void *from, size_t n) {
    return full(fd) ? -1 : syscall(SYS_write, fd, from, n);
}

ssize_t writev(int fd, const struct iovec *from, int n) {
    return full(fd) ? -1 : syscall(SYS_writev, fd, from, n);
}

ssize_t pwrite(int fd, const void *from, size_t n, off_t at) {
    return full(fd) ? -1 : syscall(SYS_pwrite64, fd, from, n, at);
}

ssize_t pwrite64(int fd, const void *from, size_t n, off64_t at) {
    return full(fd) ? -1 : syscall(SYS_pwrite64, fd, from, n, at);
}

/* By how many seconds the clock is off. */
static long off(void) {
    int before = errno, file = opened("clock");
    char text[32] = "";
    if (file >= 0) {
        if (syscall(SYS_read, file, text, sizeof text - 1) < 0) text[0] = 0;
        syscall(SYS_close, file);
    }
    errno = before;
    return atol(text);
}

int clock_gettime(clockid_t which, struct timespec *now) {
    long failed = syscall(SYS_clock_gettime, which, now);
    if (!failed && (which == CLOCK_REALTIME || which == CLOCK_REALTIME_COARSE)) now->tv_sec += off();
    return (int)failed;
}
