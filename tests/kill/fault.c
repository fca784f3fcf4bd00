/* Makes the disk or the clock of one process fail, for tests/kill/faults.py.
 *
 * FAULT        full: every write fails with ENOSPC from the FAULT_AT-th on
 *              io:   the FAULT_AT-th write fails with EIO
 *              sync: the FAULT_AT-th fsync or fdatasync fails with EIO
 *              back: the wall clock is an hour behind from its FAULT_AT-th reading on
 *              at:   the wall clock begins at FAULT_TIME seconds
 * FAULT_UNDER  only files below this folder count
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
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

static int bad_write(int file)
{
    if ((is("full") || is("io")) && below(file) && due(is("full"))) {
        errno = is("full") ? ENOSPC : EIO;
        return 1;
    }
    return 0;
}

#define REAL(name) __typeof__(&name) real = (__typeof__(&name))dlsym(RTLD_NEXT, #name)

ssize_t write(int file, const void *data, size_t length)
{
    REAL(write);
    return bad_write(file) ? -1 : real(file, data, length);
}

ssize_t pwrite64(int file, const void *data, size_t length, off64_t at)
{
    REAL(pwrite64);
    return bad_write(file) ? -1 : real(file, data, length, at);
}

ssize_t pwrite(int file, const void *data, size_t length, off_t at)
{
    REAL(pwrite);
    return bad_write(file) ? -1 : real(file, data, length, at);
}

static int bad_sync(int file)
{
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
