/* Writes down every change a program makes to the files of one directory, in order, so that a test
 * can rebuild the disk as it was at any moment (test_power_cut.py). LD_PRELOAD; Linux only.
 * One record: kind, length of the name, offset, length of the data; then name and data. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <fcntl.h>
#include <limits.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static void note(char kind, int fd, const char *path, const void *data, size_t n, off_t at)
{
    static int log = -1;
    char link[64], name[PATH_MAX];
    const char *where = getenv("POWER_CUT_DIR"), *to = getenv("POWER_CUT_LOG");
    if (!where || !to)
        return;
    if (!path) {
        snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
        ssize_t got = readlink(link, name, sizeof name - 1);
        if (got < 0)
            return;
        name[got] = 0;
        path = name;
    }
    if (strncmp(path, where, strlen(where)))
        return;
    if (log < 0)
        log = open(to, O_WRONLY | O_CREAT | O_APPEND, 0600);
    struct { uint64_t kind, name, at, n; } head = { kind, strlen(path), at, n };
    if (write(log, &head, sizeof head) < 0 || write(log, path, head.name) < 0)
        abort();
    if (n && write(log, data, n) < 0)
        abort();
}

#define REAL(f) ((__typeof__(&f))dlsym(RTLD_NEXT, #f))

ssize_t pwrite64(int fd, const void *data, size_t n, off64_t at)
{
    ssize_t got = REAL(pwrite64)(fd, data, n, at);
    if (got > 0)
        note('w', fd, 0, data, got, at);
    return got;
}
ssize_t pwrite(int fd, const void *data, size_t n, off_t at) { return pwrite64(fd, data, n, at); }
int ftruncate64(int fd, off64_t n)
{
    int got = REAL(ftruncate64)(fd, n);
    if (!got)
        note('t', fd, 0, 0, 0, n);
    return got;
}
int ftruncate(int fd, off_t n) { return ftruncate64(fd, n); }
int fsync(int fd)
{
    int got = REAL(fsync)(fd);
    if (!got)
        note('s', fd, 0, 0, 0, 0);
    return got;
}
int fdatasync(int fd)
{
    int got = REAL(fdatasync)(fd);
    if (!got)
        note('s', fd, 0, 0, 0, 0);
    return got;
}
int unlink(const char *path)
{
    int got = REAL(unlink)(path);
    if (!got)
        note('u', -1, path, 0, 0, 0);
    return got;
}
