package queue

import (
	"context"
	"fmt"
	"log/slog"
	"sync"

	"github.com/redis/go-redis/v9"
)

// logger passes on asynq's log lines. Its info is about its own goroutines, so it becomes debug; its fatal becomes an
// error, because the server that could not start returns it as well.
type logger struct{ log *slog.Logger }

func (l logger) Debug(args ...any) { l.log.Debug("asynq: " + fmt.Sprint(args...)) }
func (l logger) Info(args ...any)  { l.log.Debug("asynq: " + fmt.Sprint(args...)) }
func (l logger) Warn(args ...any)  { l.log.Warn("asynq: " + fmt.Sprint(args...)) }
func (l logger) Error(args ...any) { l.log.Error("asynq: " + fmt.Sprint(args...)) }
func (l logger) Fatal(args ...any) { l.log.Error("asynq: " + fmt.Sprint(args...)) }

// quietRedis sends the Redis client's own lines, for which it has one global logger, to debug: asynq reports the same
// outages itself. It runs before the first client is made, because the client does not guard that global.
var quietRedis = sync.OnceFunc(func() { redis.SetLogger(redisLogger{}) })

type redisLogger struct{}

func (redisLogger) Printf(ctx context.Context, format string, args ...any) {
	slog.DebugContext(ctx, "redis: "+fmt.Sprintf(format, args...))
}
