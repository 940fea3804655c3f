package queue

import (
	"context"
	"fmt"
	"log/slog"
	"strconv"
	"strings"

	"github.com/redis/go-redis/v9"
)

// oldest is the first Redis whose scripting asynq's scripts can use; asynq's own documentation names an older one.
const oldest = 6

// checkServer refuses a server that cannot be used and warns of one that may lose tasks.
func checkServer(ctx context.Context, rdb redis.UniversalClient, log *slog.Logger) error {
	text, err := rdb.Info(ctx).Result()
	if err != nil {
		return fmt.Errorf("the Redis server does not give its version; allow this user to run INFO: %w", err)
	}
	info := parseInfo(text)
	version := info["redis_version"]
	major, err := majorOf(version)
	if err != nil {
		return err
	}
	if major < oldest {
		return fmt.Errorf("the Redis server has version %s; version %d or later is required", version, oldest)
	}
	for _, w := range weaknesses(ctx, info, rdb) {
		log.Warn(w)
	}
	return nil
}

func majorOf(version string) (int, error) {
	head, _, _ := strings.Cut(version, ".")
	n, err := strconv.Atoi(head)
	if err != nil {
		return 0, fmt.Errorf("the Redis server gives its version as %q, which is not a version number", version)
	}
	return n, nil
}

// weaknesses lists what could make the server lose tasks. Hosted servers often forbid CONFIG; what depends on it is then
// skipped.
func weaknesses(ctx context.Context, info map[string]string, rdb redis.UniversalClient) []string {
	var out []string
	if info["aof_enabled"] == "0" {
		save, err := rdb.ConfigGet(ctx, "save").Result()
		if err == nil && strings.TrimSpace(save["save"]) == "" {
			out = append(out, "this Redis keeps nothing on disk: after its restart, open requests wait for their deadline before they are sent again; set appendonly yes")
		}
	}
	if p := info["maxmemory_policy"]; p != "" && p != "noeviction" && info["maxmemory"] != "0" {
		out = append(out, "this Redis may evict tasks when its memory is full (maxmemory-policy "+p+"); set maxmemory-policy noeviction")
	}
	return out
}

func parseInfo(text string) map[string]string {
	out := make(map[string]string)
	for line := range strings.SplitSeq(text, "\n") {
		if k, v, ok := strings.Cut(strings.TrimSpace(line), ":"); ok {
			out[k] = v
		}
	}
	return out
}
