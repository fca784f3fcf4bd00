/* Makes the disk or the clock of one process fail, for tests/kill/faults.py.
 *
 * FAULT        full: every write fails with ENOSPC from the FAULT_AT-th on
 *              io:   the FAULT_AT-th write fails with EIO
 *              sync: the FAULT_AT-th fsync or fdatasync fails with EIO
 *              torn: half of the FAULT_AT-th write reaches the file, then the power is gone
 *              ro:   from the FAULT_AT-th write on the disk is read-only: no write, no new file, no
 *                    renaming and no removing (EROFS), as the kernel does after an error
 *              gone: from the FAULT_AT-th write on the disk is unplugged: nothing is written,
 *                    forced to it, read or opened (EIO)
 *              back: the wall clock is an hour behind from its FAULT_AT-th reading on
 *              at:   the wall clock begins at FAULT_TIME seconds
 * FAULT_UNDER  only files below this folder count
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/types.h>
#include <time.h>
#include <unistd.h>

static int counted;

static int is(const char *fault)
{
    const char *asked = getenv("FAULT");
    return asked != NULL && strcmp(asked, fault) == 0;
}

static int below(int file)
{
    const char *folder = getenv("FAULT_UNDER");
    char link[64], path[4096];
    snprintf(link, sizeof link, "/proc/self/fd/%d", file);
    ssize_t length = readlink(link, path, sizeof path - 1);
    return folder != NULL && length > 0 && strncmp(path, folder, strlen(folder)) == 0;
}

static int due(int lasting)
{
    int at = atoi(getenv("FAULT_AT")), now = __sync_add_and_fetch(&counted, 1);
    return lasting ? now >= at : now == at;
}

static int under(const char *path)
{
    const char *folder = getenv("FAULT_UNDER");
    return folder != NULL && strncmp(path, folder, strlen(folder)) == 0;
}

/* Whether the disk is read-only or unplugged by now; sets errno. */
static int lost(void)
{
    errno = is("ro") ? EROFS : EIO;
    return (is("ro") || is("gone")) && counted >= atoi(getenv("FAULT_AT"));
}

static int bad_write(int file)
{
    if ((is("ro") || is("gone")) && below(file)) {
        __sync_add_and_fetch(&counted, 1);
        return lost();
    }
    if ((is("full") || is("io")) && below(file) && due(is("full"))) {
        errno = is("full") ? ENOSPC : EIO;
        return 1;
    }
    return 0;
}

#define REAL(name) __typeof__(&name) real = (__typeof__(&name))dlsym(RTLD_NEXT, #name)

static int torn(int file)
{
    return is("torn") && below(file) && due(0);
}

ssize_t write(int file, const void *data, size_t length)
{
    REAL(write);
    if (torn(file)) {
        real(file, data, length / 2);
        _exit(137);
    }
    return bad_write(file) ? -1 : real(file, data, length);
}

ssize_t pwrite64(int file, const void *data, size_t length, off64_t at)
{
    REAL(pwrite64);
    if (torn(file)) {
        real(file, data, length / 2, at);
        _exit(137);
    }
    return bad_write(file) ? -1 : real(file, data, length, at);
}

ssize_t pwrite(int file, const void *data, size_t length, off_t at)
{
    REAL(pwrite);
    if (torn(file)) {
        real(file, data, length / 2, at);
        _exit(137);
    }
    return bad_write(file) ? -1 : real(file, data, length, at);
}

static int bad_sync(int file)
{
    if (is("gone") && below(file))
        return lost();
    errno = EIO;
    return is("sync") && below(file) && due(0);
}

int fsync(int file)
{
    REAL(fsync);
    return bad_sync(file) ? -1 : real(file);
}

int fdatasync(int file)
{
    REAL(fdatasync);
    return bad_sync(file) ? -1 : real(file);
}

static int bad_open(const char *path, int flags)
{
    return under(path) && (is("gone") || (flags & (O_WRONLY | O_RDWR | O_CREAT))) && lost();
}

int open64(const char *path, int flags, ...)
{
    va_list rest;
    va_start(rest, flags);
    mode_t mode = va_arg(rest, mode_t);
    va_end(rest);
    int (*real)(const char *, int, ...) = dlsym(RTLD_NEXT, "open64");
    return bad_open(path, flags) ? -1 : real(path, flags, mode);
}

int open(const char *path, int flags, ...)
{
    va_list rest;
    va_start(rest, flags);
    mode_t mode = va_arg(rest, mode_t);
    va_end(rest);
    int (*real)(const char *, int, ...) = dlsym(RTLD_NEXT, "open");
    return bad_open(path, flags) ? -1 : real(path, flags, mode);
}

ssize_t pread64(int file, void *data, size_t length, off64_t at)
{
    REAL(pread64);
    return is("gone") && below(file) && lost() ? -1 : real(file, data, length, at);
}

int rename(const char *from, const char *to)
{
    REAL(rename);
    return under(from) && lost() ? -1 : real(from, to);
}

int unlink(const char *path)
{
    REAL(unlink);
    return under(path) && lost() ? -1 : real(path);
}

int clock_gettime(clockid_t clock, struct timespec *time)
{
    static time_t begun;
    REAL(clock_gettime);
    int answer = real(clock, time);
    if (clock == CLOCK_REALTIME && is("back") && due(1))
        time->tv_sec -= 3600;
    if (clock == CLOCK_REALTIME && is("at")) {
        if (begun == 0)
            begun = time->tv_sec;
        time->tv_sec += atol(getenv("FAULT_TIME")) - begun;
    }
    return answer;
}
